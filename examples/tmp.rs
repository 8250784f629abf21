use faultodds::*; use faultodds::evidence::*;
fn main(){ let b=shipped::base().unwrap(); for p in cases::run(&b) { println!("{}:{} {}",p.file,p.place.line,p.message);} println!("{} cases", b.cases.len());
 for codes in std::env::args().skip(1) { let net=network::build::build(&b,&Default::default());
 let h=History::visit(vec![],Epoch{codes:codes.split(',').map(str::to_owned).collect(),codes_complete:true,..Default::default()});
 let t=h.tell(&b,&net).unwrap(); let s=std::time::Instant::now(); let p=inference::posterior(&net,&t.evidence).unwrap(); println!("{codes}: {:?} ln {} frontier {}",s.elapsed(),p.ln_evidence,p.frontier);
 let mut v:Vec<_>=net.suspects.iter().zip(&p.now).collect(); v.sort_by(|a,b|b.1.total_cmp(a.1)); for (s,p) in v.iter().take(10){println!("   {:5.1} {}",*p*100.0,s.id);} } }
