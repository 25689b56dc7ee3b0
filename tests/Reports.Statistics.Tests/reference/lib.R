# Shared reference routines (R). Sourced by reference/make.R.
# Every estimator is either an established R package call or a hand-written optimiser whose
# optimality (gradient / KKT) is checked here; cross-checks are recorded in the case ("checks").
suppressMessages({library(jsonlite); library(MASS); library(survival); library(lsei); library(npsurv); library(lme4)
library(brglm2); library(pscl); library(VGAM, warn.conflicts=FALSE)})
options(digits=15, warn=1)
num <- function(x) if (is.null(x)) NULL else { x <- unname(x); if (is.numeric(x) && any(!is.finite(x))) I(lapply(x, function(v) if (is.finite(v)) v else if (is.nan(v)||is.na(v)) "NaN" else if (v>0) "Infinity" else "-Infinity")) else x }
sc <- function(x) { x<-unname(x); if (is.numeric(x) && !is.finite(x)) (if (is.nan(x)||is.na(x)) "NaN" else if (x>0) "Infinity" else "-Infinity") else x }
U <- function(x) if (length(x)==1) unbox(sc(x)) else x
fix <- function(v) { # recursively make json friendly: scalars unboxed, infinities as strings; I() keeps a vector a vector
  if (is.null(v)) return(NULL)
  if (is.data.frame(v)) return(lapply(seq_len(nrow(v)), function(i) lapply(as.list(v[i,,drop=FALSE]), function(z) unbox(sc(if(is.factor(z)) as.character(z) else z)))))
  if (inherits(v,"AsIs")) { v <- unclass(v); if (is.list(v)) return(lapply(v,fix)); if (is.numeric(v) && any(!is.finite(v))) return(lapply(v,function(z) unbox(sc(z)))); return(unname(v)) }
  if (is.matrix(v)) return(lapply(seq_len(nrow(v)), function(i) fix(I(v[i,]))))
  if (is.list(v)) return(lapply(v,fix))
  if (length(v)==1) return(unbox(sc(v)))
  if (is.numeric(v) && any(!is.finite(v))) return(lapply(unname(v),function(z) unbox(sc(z))))
  unname(v)
}
newset <- function(method, description) { e <- new.env(); e$method<-method; e$description<-description; e$cases<-list(); e }
add <- function(s, id, title, source, input, expected, tolerance, notes=NULL, checks=NULL) {
  if (id %in% sapply(s$cases, function(z) z$id)) stop("dup id ", id)
  k <- list(id=id, title=title, source=source, input=fix(input), expected=fix(expected), tolerance=fix(tolerance))
  if (!is.null(notes)) k$notes <- notes
  if (!is.null(checks)) k$checks <- fix(checks)
  s$cases[[length(s$cases)+1]] <- k; invisible(NULL) }
unb <- function(l) { if (is.list(l) && !is.data.frame(l)) lapply(l, unb) else if (is.character(l)&&length(l)==1&&!inherits(l,"scalar")) unbox(l) else l }
save_set <- function(s, dir, file) {
  v <- sapply(c("survival","npsurv","lsei","MASS","lme4","brglm2","pscl","VGAM"), function(p) as.character(packageVersion(p)))
  out <- list(method=unbox(s$method), description=unbox(s$description), generated_by=unbox(paste(R.version.string, paste(names(v),v,collapse=", "),sep="; ")),
   number_format=unbox("infinite or undefined values are the strings Infinity, -Infinity, NaN"),
   tolerance_rule=unbox("pass when abs(got-expected) <= abs + rel*abs(expected)"), cases=unb(s$cases))
  writeLines(toJSON(out, digits=I(15), pretty=TRUE, auto_unbox=FALSE, na="null"), file.path(dir,file)); cat(file, length(s$cases), "cases\n") }
tol <- function(abs=1e-8, rel=1e-6) list(abs=abs, rel=rel)

## ---------- A: lines -> observations
expand <- function(lines, treatment, r=1) {   # lines: n,a,b,w ; one report line each
  o <- list()
  for (i in seq_len(nrow(lines))) with(lines[i,], {
    add1 <- function(lo,hi,m) if (m>0) o[[length(o)+1]] <<- data.frame(lo=lo,hi=hi,weight=m*w)
    h <- r/2
    if (treatment=="all_interval") add1(a,b,n)
    else if (treatment=="ends_exact") { if (n==1) add1(a,b,1) else { add1(a,a,1); add1(b,b,1); add1(a,b,n-2) } }
    else if (treatment=="ends_rounded") { if (n==1) add1(a-h,b+h,1) else { add1(a-h,a+h,1); add1(b-h,b+h,1); add1(a-h,b+h,n-2) } }
    else stop("treatment") })
  o <- do.call(rbind,o); o <- aggregate(weight~lo+hi,o,sum); o[order(o$lo,o$hi),] }
turnbull <- function(lo,hi,type) {  # maximal intersections; type closed | right_open
  n<-length(lo); v<-c(lo,hi); isR<-rep(0:1,each=n)
  o <- if (type=="closed") order(v,isR) else order(v,-isR)
  # right_open: exact points (lo==hi) are not allowed
  v<-v[o]; isR<-isR[o]; j<-which(isR[-length(isR)]==0 & isR[-1]==1)
  data.frame(lo=v[j],hi=v[j+1]) }
npmle <- function(obs, type="closed", maxit=500) {
  S<-turnbull(obs$lo,obs$hi,type); w<-obs$weight; n<-sum(w)
  A<-outer(obs$lo,S$lo,"<=")&outer(obs$hi,S$hi,">="); A<-A*1; m<-ncol(A)
  p<-rep(1/m,m); for(i in 1:300){P<-drop(A%*%p); p<-p*drop(crossprod(A,w/P))/n}
  p[p<1e-12]<-0; p<-p/sum(p); wr<-sqrt(w)
  ll<-function(p) {P<-drop(A%*%p); if(any(P<=0)) -Inf else sum(w*log(P))}
  l<-ll(p); if(!is.finite(l)){p<-rep(1/m,m);l<-ll(p)}
  for(it in 1:maxit){ P<-drop(A%*%p); d<-drop(crossprod(A,w/P)); gap<-max(d)-n; if(gap<1e-10*n) break
    Sm<-A/P; j<- p>0 | d>=n-1e-9
    j[which.max(d)]<-TRUE; q<-p*0; q[j]<-pnnls(wr*Sm[,j,drop=FALSE],wr*2,sum=1)$x; q<-q/sum(q)
    al<-1; dd<-sum(d*(q-p)); repeat{pn<-p+al*(q-p); ln<-ll(pn); if(ln>=l+al*dd*1e-4) break; al<-al/2; if(al<1e-12){pn<-p;ln<-l;break}}
    if(al<1e-12) {for(e in 1:2000){P<-drop(A%*%p);p<-p*drop(crossprod(A,w/P))/n}; l<-ll(p)} else {p<-pn;l<-ln} }
  P<-drop(A%*%p); d<-drop(crossprod(A,w/P)); act<- d>=n*(1-1e-7)
  rk<-qr(A[,act,drop=FALSE])$rank
  keep<-p>1e-10
  list(loglik=l,support=data.frame(lo=S$lo[keep],hi=S$hi[keep],p=p[keep]),all_support=S,p=p,fitted=P,kkt_gap=(max(d)-n)/n,mass_unique=rk==sum(act),A=A,w=w) }
xcheck_npmle <- function(obs,type) { # npsurv uses (L,R]: shift
  sp<-min(diff(sort(unique(c(obs$lo,obs$hi,max(obs$hi)+1))))); if(!is.finite(sp)||sp<=0) sp<-1; e<-sp*1e-3
  L<-obs$lo;R<-obs$hi
  X<- if(type=="closed") cbind(ifelse(L<R,L-e,L),R) else cbind(L,R-e)  # right-open [L,R): (L-0,R) -> shift right end
  if(type!="closed") X<-cbind(L-e/2,R-e)
  X[X[,1]<0,1]<-0
  f<-tryCatch(npsurv(X,w=obs$weight,maxit=1000,tol=1e-12),error=function(z) NULL); if(is.null(f)) NA else f$ll }
grade_shares <- function(S,p,lo,hi) { # grade [lo,hi): lower/upper bound from Turnbull masses
  data.frame(lo=lo,hi=hi,share_low=sapply(seq_along(lo),function(g) sum(p[S$lo>=lo[g]&S$hi<hi[g]])),
             share_high=sapply(seq_along(lo),function(g) sum(p[S$hi>=lo[g]&S$lo<hi[g]]))) }
np_quant <- function(S,p,q) { o1<-order(S$lo);o2<-order(S$hi)
  data.frame(q=q,lower=sapply(q,function(z) S$lo[o1][which(cumsum(p[o1])>=z-1e-9)[1]]),upper=sapply(q,function(z) S$hi[o2][which(cumsum(p[o2])>=z-1e-9)[1]])) }
lr_share_ci <- function(f,G,level=.95) { # profile LR interval of the mass of support set G
  A<-f$A;w<-f$w;n<-sum(w)
  prof<-function(s){p<-pmax(f$p,1e-6);p[G]<-p[G]/sum(p[G])*s;p[!G]<-p[!G]/sum(p[!G])*(1-s)
    l0<--Inf; for(i in 1:20000){P<-drop(A%*%p); c0<-p*drop(crossprod(A,w/P)); p[G]<-s*c0[G]/sum(c0[G]);p[!G]<-(1-s)*c0[!G]/sum(c0[!G])
      if(i%%50==0){l<-sum(w*log(A%*%p)); if(l-l0<1e-12) break; l0<-l}}; l}
  s<-sum(f$p[G]); cr<-qchisq(level,1)/2; g<-function(x) prof(x)-(f$loglik-cr)
  lo<-if(s<1e-9) 0 else if(g(1e-9)>0) 0 else uniroot(g,c(1e-9,min(s,1-1e-9)),tol=1e-9)$root
  hi<-if(s>1-1e-9) 1 else if(g(1-1e-9)>0) 1 else uniroot(g,c(max(s,1e-9),1-1e-9),tol=1e-9)$root
  c(share=s,lo=lo,hi=hi) }

## ---------- A2: lognormal mixture, interval + exact, weights
lcell<-function(lo,hi,mu,s){ a<-(log(lo)-mu)/s; b<-(log(hi)-mu)/s; up<-a>0
  ifelse(up, pnorm(a,lower=FALSE)-pnorm(b,lower=FALSE), pnorm(b)-pnorm(a)) }
mix_ll<-function(th,K,obs){ pi<-th$pi; d<-0; ex<-obs$lo==obs$hi
  for(k in 1:K) d<-d+pi[k]*ifelse(ex,dlnorm(obs$lo,th$mu[k],th$sigma[k]),lcell(obs$lo,obs$hi,th$mu[k],th$sigma[k]))
  if(any(!is.finite(d)|d<=0)) -1e10 else sum(obs$weight*log(d)) }
mix_em<-function(obs,th,K,smin,maxit=2000,tol=1e-9){ ex<-obs$lo==obs$hi; w<-obs$weight; W<-sum(w); l0<--Inf
  a0<-log(obs$lo);b0<-log(obs$hi); l<-NA
  for(it in 1:maxit){ D<-E1<-E2<-matrix(0,nrow(obs),K)
    for(k in 1:K){ mu<-th$mu[k];s<-th$sigma[k]; a<-(a0-mu)/s;b<-(b0-mu)/s; up<-a>0
      P<-ifelse(ex,dlnorm(obs$lo,mu,s),ifelse(up,pnorm(a,lower=FALSE)-pnorm(b,lower=FALSE),pnorm(b)-pnorm(a)))
      Pp<-pmax(P,1e-300); fa<-dnorm(a);fb<-dnorm(b); z<-ifelse(ex,a,(fa-fb)/Pp)
      z2<-ifelse(ex,a^2,1+(ifelse(is.finite(a),a,0)*fa-ifelse(is.finite(b),b,0)*fb)/Pp)
      bad<-P<1e-200&!ex; mid<-pmin(pmax(0,a),b); z[bad]<-mid[bad]; z2[bad]<-mid[bad]^2
      D[,k]<-th$pi[k]*P; E1[,k]<-mu+s*z; E2[,k]<-s^2*z2+2*mu*s*z+mu^2 }
    den<-rowSums(D); if(any(den<=0)) return(list(th=th,ll=-1e10,it=it)); l<-sum(w*log(den)); Tm<-w*D/den; nk<-colSums(Tm)
    th$pi<-nk/W; th$mu<-colSums(Tm*E1)/pmax(nk,1e-12); th$sigma<-sqrt(pmax(colSums(Tm*E2)/pmax(nk,1e-12)-th$mu^2,smin^2))
    if(l-l0<tol*(abs(l)+1)&&it>5) break; l0<-l }
  list(th=th,ll=l,it=it) }
mixfit<-function(obs,K,smin=0.03,nstart=25,seed=1){ set.seed(seed)
  mid<-ifelse(is.finite(obs$hi),sqrt(pmax(obs$lo,1e-3)*obs$hi),obs$lo*1.1); z<-log(rep(mid,pmax(1,pmin(50,round(obs$weight)))))
  best<-NULL; s0<-max(sd(z),smin*2,na.rm=TRUE); if(!is.finite(s0)) s0<-smin*2
  for(st in 1:(if(K==1) 2 else nstart)){ mu<- if(st==1) quantile(z,(1:K-.5)/K,names=FALSE) else sort(sample(z,K,replace=length(z)<K))+rnorm(K,0,s0*.1)
    th<-list(pi=rep(1/K,K),mu=mu,sigma=rep(max(s0/K*runif(1,.4,1.2),smin),K)); f<-mix_em(obs,th,K,smin,maxit=400,tol=1e-8)
    if(is.null(best)||f$ll>best$ll+1e-9) best<-f }
  best<-mix_em(obs,best$th,K,smin,maxit=5000,tol=1e-13)
  un<-function(v){ e<-if(K>1) exp(c(v[1:(K-1)],0)) else 1; list(pi=e/sum(e),mu=v[K-1+1:K],sigma=smin+exp(v[2*K-1+1:K])*1) }
  th<-best$th; v0<-c(if(K>1) log(pmax(th$pi[-K],1e-10)/max(th$pi[K],1e-10)),th$mu,log(pmax(th$sigma-smin,1e-8)))
  o<-nlminb(v0,function(v) -mix_ll(un(v),K,obs),control=list(rel.tol=1e-15,x.tol=1e-12,eval.max=4000,iter.max=2000))
  if(-o$objective>best$ll){th<-un(o$par);ll<--o$objective} else ll<-best$ll
  od<-order(th$mu); th<-lapply(th,function(x) x[od]); W<-sum(obs$weight)
  list(K=K,ll=ll,th=th,bic=-2*ll+(3*K-1)*log(W),floor=any(th$sigma<smin*1.001)) }
mix_shares<-function(th,lo,hi) sapply(seq_along(lo),function(g) sum(th$pi*(plnorm(hi[g],th$mu,th$sigma)-plnorm(lo[g],th$mu,th$sigma))))
mix_q<-function(th,q) sapply(q,function(z) exp(uniroot(function(x) sum(th$pi*pnorm((x-th$mu)/th$sigma))-z,c(min(th$mu-10*th$sigma),max(th$mu+10*th$sigma)),tol=1e-13)$root))
# exact likelihood of the rounded (min,max) of n iid fish:  P(min in cell A, max in cell B)
mm_ll<-function(th,lines,r){ h<-r/2; Fc<-function(x) {s<-0; for(k in seq_along(th$pi)) s<-s+th$pi[k]*plnorm(pmax(x,0),th$mu[k],th$sigma[k]); s}
  am<-Fc(lines$a-h);ap<-Fc(lines$a+h);bm<-Fc(lines$b-h);bp<-Fc(lines$b+h);n<-lines$n
  p<-ifelse(lines$a==lines$b,(bp-am)^n, (bp-am)^n-pmax(bp-ap,0)^n-pmax(bm-am,0)^n+ifelse(bm>ap,(bm-ap)^n,ifelse(n==0,1,0)))
  p<-ifelse(n==1,bp-am,p)
  # scale by (bp-am)^n to avoid underflow
  q<-ifelse(lines$a==lines$b|n==1,1,1-(pmax(bp-ap,0)/(bp-am))^n-(pmax(bm-am,0)/(bp-am))^n+(pmax(bm-ap,0)/(bp-am))^n)
  if(any(!is.finite(q)|q<=0|bp-am<=0)) return(-1e10); sum(lines$w*(n*log(bp-am)+log(q))) }
mm_fit<-function(lines,K,r,smin=0.03,nstart=25,seed=1){ set.seed(seed)
  z<-log(c(rep(lines$a,1),rep(lines$b,1),rep((lines$a+lines$b)/2,2))); s0<-max(sd(z),.1)
  un<-function(v){ e<-if(K>1) exp(c(v[1:(K-1)],0)) else 1; list(pi=e/sum(e),mu=v[K-1+1:K],sigma=smin+exp(v[2*K-1+1:K])) }
  best<-NULL; for(st in 1:(if(K==1) 4 else nstart)){ mu<-if(st==1) quantile(z,(1:K-.5)/K,names=FALSE) else sort(sample(z,K,replace=TRUE))+rnorm(K,0,.1*s0)
    v0<-c(rep(0,K-1),mu,log(rep(s0/K*runif(1,.5,1.3),K)))
    o<-tryCatch(nlminb(v0,function(v) -mm_ll(un(v),lines,r),control=list(eval.max=4000,iter.max=2000)),error=function(e) NULL)
    if(!is.null(o)&&(is.null(best)||o$objective<best$objective-1e-9)) best<-o }
  best<-nlminb(best$par,function(v) -mm_ll(un(v),lines,r),control=list(rel.tol=1e-15,x.tol=1e-12,eval.max=8000,iter.max=4000))
  th<-un(best$par); od<-order(th$mu); th<-lapply(th,function(x) x[od]); list(K=K,ll=-best$objective,th=th,floor=any(th$sigma<smin*1.001)) }
kish<-function(w) sum(w)^2/sum(w^2)

## ---------- B
wilson<-function(x,n,level=.95){ z<-qnorm(1-(1-level)/2); p<-x/n; c((p+z^2/(2*n)-z*sqrt(p*(1-p)/n+z^2/(4*n^2)))/(1+z^2/n),(p+z^2/(2*n)+z*sqrt(p*(1-p)/n+z^2/(4*n^2)))/(1+z^2/n)) }
bb_ll<-function(y,n,a,b) sum(lchoose(n,y)+lbeta(y+a,n-y+b)-lbeta(a,b))
bb_fit<-function(y,n){ pb<-sum(y)/sum(n); l0<-sum(dbinom(y,n,pb,log=TRUE))
  if(pb<=0||pb>=1) return(list(boundary=TRUE,rho=0,mean=pb,ll=l0,ll_binomial=l0,alpha=Inf,beta=Inf))
  f<-function(v){m<-plogis(v[1]);s<-exp(v[2]);-bb_ll(y,n,m*s,(1-m)*s)}
  best<-NULL; for(s in log(c(.3,1,5,20,100,1000))){o<-nlminb(c(qlogis(pb),s),f,lower=c(-30,-10),upper=c(30,log(1e7)),control=list(rel.tol=1e-15,x.tol=1e-13,eval.max=5000,iter.max=5000)); if(is.null(best)||o$objective<best$objective) best<-o}
  o<-optim(best$par,f,method="BFGS",control=list(reltol=1e-16,maxit=2000)); if(o$value<best$objective) best<-list(par=o$par,objective=o$value)
  m<-plogis(best$par[1]);s<-exp(best$par[2])
  if(s>1e5||-best$objective<=l0+1e-7) return(list(boundary=TRUE,rho=0,mean=pb,ll=l0,ll_binomial=l0,alpha=Inf,beta=Inf))
  list(boundary=FALSE,rho=1/(s+1),mean=m,ll=-best$objective,ll_binomial=l0,alpha=m*s,beta=(1-m)*s) }
mh<-function(a,b,c,d,level=.95){ n<-a+b+c+d; R<-a*d/n;S<-b*c/n;P<-(a+d)/n;Q<-(b+c)/n; or<-sum(R)/sum(S)
  v<-sum(P*R)/(2*sum(R)^2)+sum(P*S+Q*R)/(2*sum(R)*sum(S))+sum(Q*S)/(2*sum(S)^2)
  z<-qnorm(1-(1-level)/2); e<-(a+b)*(a+c)/n; vv<-(a+b)*(c+d)*(a+c)*(b+d)/(n^2*(n-1)); D<-abs(sum(a-e))
  list(or=or,se_log=sqrt(v),lo=or*exp(-z*sqrt(v)),hi=or*exp(z*sqrt(v)),chisq=D^2/sum(vv),chisq_cc=(max(0,D-.5))^2/sum(vv),p=pchisq(D^2/sum(vv),1,lower=FALSE),p_cc=pchisq(max(0,D-.5)^2/sum(vv),1,lower=FALSE)) }
breslow_day<-function(a,b,c,d,or){ x<-0;t<-0;v<-0; n1<-a+b;n0<-c+d;m<-a+c; K<-length(a)
  for(i in 1:K){ if(abs(or-1)<1e-12){A<-n1[i]*m[i]/(n1[i]+n0[i])} else {aa<-1-or;bb<-n0[i]-m[i]+or*(n1[i]+m[i]);cc<- -or*n1[i]*m[i]; A<-(-bb+c(-1,1)*sqrt(bb^2-4*aa*cc))/(2*aa);A<-A[A>=max(0,m[i]-n0[i])-1e-9&A<=min(n1[i],m[i])+1e-9][1]}
    vi<-1/(1/A+1/(n1[i]-A)+1/(m[i]-A)+1/(n0[i]-m[i]+A)); x<-x+(a[i]-A)^2/vi; t<-t+a[i]-A; v<-v+vi }
  list(bd=x,bd_tarone=x-t^2/v,df=K-1,p_tarone=pchisq(x-t^2/v,K-1,lower=FALSE)) }
ridge_logit<-function(X,y,n,lambda){ b<-rep(0,ncol(X)); pen<-c(0,rep(lambda,ncol(X)-1)) # minus loglik + lambda/2 sum b_j^2, intercept free
  for(i in 1:200){ p<-plogis(drop(X%*%b)); g<-drop(crossprod(X,y-n*p))-pen*b; H<-crossprod(X*sqrt(n*p*(1-p)))+diag(pen,ncol(X)); st<-solve(H,g)
    f<-function(b){e<-drop(X%*%b);sum(y*e-n*log1p(exp(e)))-sum(pen*b^2)/2}; al<-1; while(f(b+al*st)<f(b)-1e-14&&al>1e-10) al<-al/2; b<-b+al*st; if(max(abs(st))<1e-13) break }
  p<-plogis(drop(X%*%b)); V<-solve(crossprod(X*sqrt(n*p*(1-p)))+diag(pen,ncol(X)))
  list(b=b,se=sqrt(diag(V)),grad=max(abs(drop(crossprod(X,y-n*p))-pen*b)),ll=sum(y*log(p)+(n-y)*log1p(-p))) }
# choice of one winner among the set fished; utilities sum to zero; Gaussian ridge lambda (precision)
choice_fit<-function(sets,win,w,items,lambda=0){ m<-length(items); idx<-lapply(sets,function(s) match(s,items)); wi<-match(win,items)
  f<-function(b){b<-c(b,-sum(b)); l<-0; for(i in seq_along(idx)) l<-l+w[i]*(b[wi[i]]-log(sum(exp(b[idx[[i]]])))); -(l-lambda/2*sum(b^2))}
  o<-nlminb(rep(0,m-1),f,control=list(rel.tol=1e-15,x.tol=1e-13,eval.max=1e4,iter.max=1e4)); b<-c(o$par,-sum(o$par))
  H<-optimHess(o$par,f); list(b=b,obj=-o$objective,ll=-f(o$par)+lambda/2*sum(b^2)) }
dm_ll<-function(X,a){A<-sum(a);n<-rowSums(X);sum(lgamma(n+1)-rowSums(lgamma(X+1))+lgamma(A)-lgamma(A+n)+rowSums(lgamma(sweep(X,2,a,"+")))-sum(lgamma(a)))}
## ---------- C
nb_ll<-function(x,w,mu,k) sum(w*dnbinom(x,size=k,mu=mu,log=TRUE))
nb_fit<-function(x,w=rep(1,length(x))){ m<-sum(w*x)/sum(w); l0<-sum(w*dpois(x,m,log=TRUE)); v<-sum(w*(x-m)^2)/sum(w)
  if(m==0) return(list(mean=0,k=NaN,boundary=TRUE,ll=0,ll_poisson=0,p0=1))
  if(v<=m) return(list(mean=m,k=Inf,boundary=TRUE,ll=l0,ll_poisson=l0,p0=exp(-m)))
  g<-function(lk){k<-exp(lk); sum(w*(digamma(x+k)-digamma(k)))+sum(w)*log(k/(k+m))}
  r<-uniroot(g,c(log(1e-6),log(1e7)),tol=1e-14)$root;k<-exp(r); list(mean=m,k=k,boundary=FALSE,ll=nb_ll(x,w,m,k),ll_poisson=l0,p0=dnbinom(0,size=k,mu=m)) }
conv<-function(a,b) {r<-numeric(length(a)+length(b)-1); for(i in seq_along(a)) if(a[i]!=0) r[i-1+seq_along(b)]<-r[i-1+seq_along(b)]+a[i]*b; r}
cpow<-function(p,m){r<-1; while(m>0){if(m%%2==1) r<-conv(r,p); m<-m%/%2; if(m>0) p<-conv(p,p)}; r}
# P(total=T, #zero=Z, max=M | N anglers iid NB(mu,k)), catch per angler capped at bag (stop fishing at the limit)
trip_lp<-function(N,Z,T,M,bag,mu,k){ pmf<-function(x) if(is.finite(k)) dnbinom(x,size=k,mu=mu) else dpois(x,mu)
  tail<-function(x) if(is.finite(k)) pnbinom(x,size=k,mu=mu,lower.tail=FALSE) else ppois(x,mu,lower.tail=FALSE)
  m<-N-Z; l<-lchoose(N,Z)+(if(Z>0) Z*log(pmf(0)) else 0); if(m==0) return(if(T==0) l else -Inf)
  cap<-if(is.null(bag)||is.na(bag)) T else bag
  q<-pmf(0:cap); if(!is.null(bag)&&!is.na(bag)) q[cap+1]<-tail(cap-1); q[1]<-0
  C<-function(mx){ if(mx<1) return(0); v<-q[1:(min(mx,cap)+1)]; r<-cpow(v,m); if(T+1>length(r)) 0 else r[T+1] }
  pr<- if(is.null(M)||is.na(M)) C(cap) else C(M)-C(M-1)
  if(!is.finite(pr)||pr<=0) return(-1e6); l+log(pr) }
trip_fit<-function(tr){ f<-function(v){mu<-exp(v[1]);k<-if(length(v)>1) exp(-v[2]) else Inf; -sum(sapply(seq_len(nrow(tr)),function(i) trip_lp(tr$anglers[i],tr$zeros[i],tr$total[i],tr$top[i],tr$bag[i],mu,k)))}
  m0<-log(max(sum(tr$total),.5)/sum(tr$anglers)); o0<-optimize(function(a) f(a),c(m0-3,m0+3),tol=1e-10)
  best<-NULL; for(s in c(-3,-1,0,1)){o<-nlminb(c(m0,s),f,lower=c(-12,-14),upper=c(8,6),control=list(rel.tol=1e-14,x.tol=1e-11)); if(is.null(best)||o$objective<best$objective) best<-o}
  for(rr in 1:3){o<-optim(best$par,f,control=list(reltol=1e-15,maxit=4000)); if(o$value<best$objective) best<-list(par=o$par,objective=o$value)}
  if(best$par[2]< -10||best$objective>=o0$objective-1e-6) list(mean=exp(o0$minimum),k=Inf,boundary=TRUE,ll=-o0$objective,ll_poisson=-o0$objective) else list(mean=exp(best$par[1]),k=exp(-best$par[2]),boundary=FALSE,ll=-best$objective,ll_poisson=-o0$objective) }
## ---------- D
brier_dec<-function(p,y){ u<-sort(unique(p)); N<-length(y); ob<-mean(y); nk<-sapply(u,function(v) sum(p==v)); ok<-sapply(u,function(v) mean(y[p==v]))
  list(brier=mean((p-y)^2),reliability=sum(nk*(u-ok)^2)/N,resolution=sum(nk*(ok-ob)^2)/N,uncertainty=ob*(1-ob),skill=if(ob*(1-ob)>0) 1-mean((p-y)^2)/(ob*(1-ob)) else NaN) }
brier_bins<-function(p,y,br){ b<-findInterval(p,br,rightmost.closed=TRUE); N<-length(y); ob<-mean(y); ks<-sort(unique(b)); rel<-res<-wbv<-wbc<-0
  for(k in ks){ i<-b==k; n<-sum(i); pk<-mean(p[i]); ok<-mean(y[i]); rel<-rel+n*(pk-ok)^2/N; res<-res+n*(ok-ob)^2/N; wbv<-wbv+sum((p[i]-pk)^2)/N; wbc<-wbc+2*sum((y[i]-ok)*(p[i]-pk))/N }
  list(brier=mean((p-y)^2),reliability=rel,resolution=res,uncertainty=ob*(1-ob),within_bin_variance=wbv,within_bin_covariance=wbc,generalised_resolution=res-wbv+wbc) }
logscore<-function(p,y,eps=NULL){ if(!is.null(eps)) p<-pmin(pmax(p,eps),1-eps); -mean(ifelse(y==1,log(p),log1p(-p))) }
rps<-function(p,k) sum((cumsum(p)-(seq_along(p)>=k))[-length(p)]^2)
crps_count<-function(y,F,upper=100000){ x<-0:upper; s<-F(x); sum((s-(x>=y))^2) }
crps_ens<-function(x,y) mean(abs(x-y))-mean(abs(outer(x,x,"-")))/2
pit_nonrand<-function(Px,Pm1,u) sapply(u,function(v) mean(ifelse(v<=Pm1,0,ifelse(v>=Px,1,(v-Pm1)/(Px-Pm1)))))
mcn<-function(b,c) list(chisq=(b-c)^2/(b+c),chisq_cc=max(0,abs(b-c)-1)^2/(b+c),p=pchisq((b-c)^2/(b+c),1,lower=FALSE),p_cc=pchisq(max(0,abs(b-c)-1)^2/(b+c),1,lower=FALSE),p_exact=min(1,2*pbinom(min(b,c),b+c,.5)),p_mid=min(1,2*pbinom(min(b,c),b+c,.5)-dbinom(min(b,c),b+c,.5)))
## ---------- E
stock<-function(mu,k,cu,co,L=1){ cr<-cu/(cu+co); M<-mu*L;K<-k*L; q<-if(is.finite(k)) qnbinom(cr,size=K,mu=M) else qpois(cr,M)
  x<-0:max(200,ceiling(M*60+2000)); p<-if(is.finite(k)) dnbinom(x,size=K,mu=M) else dpois(x,M); under<-sum(p*pmax(x-q,0)); over<-sum(p*pmax(q-x,0))
  list(critical_ratio=cr,order_up_to=q,service_level=if(is.finite(k)) pnbinom(q,size=K,mu=M) else ppois(q,M),expected_shortage=under,expected_leftover=over,expected_cost=cu*under+co*over,fill_rate=if(M>0) 1-under/M else NaN) }
## ---------- F
mk<-function(t,x,level=.95){ o<-order(t);t<-t[o];x<-x[o]; n<-length(x); ij<-which(upper.tri(diag(n)),arr.ind=TRUE); ij<-ij[t[ij[,2]]>t[ij[,1]],,drop=FALSE]
  d<-x[ij[,2]]-x[ij[,1]]; S<-sum(sign(d)); ty<-table(x); tt<-table(t); f<-function(z) sum(z*(z-1)*(2*z+5)); v<-(n*(n-1)*(2*n+5)-f(ty)-f(tt))/18
  if(any(tt>1)) v<-v+sum(tt*(tt-1))*sum(ty*(ty-1))/(2*n*(n-1))+(if(n>2) sum(tt*(tt-1)*(tt-2))*sum(ty*(ty-1)*(ty-2))/(9*n*(n-1)*(n-2)) else 0)
  z<-if(v<=0) 0 else (S-sign(S))/sqrt(v); sl<-sort(d/(t[ij[,2]]-t[ij[,1]])); N<-length(sl); C<-qnorm(1-(1-level)/2)*sqrt(max(v,0)); M1<-(N-C)/2;M2<-(N+C)/2+1
  ip<-function(r){ if(r<1) return(sl[1]); if(r>N) return(sl[N]); a<-floor(r); if(a==N) sl[N] else sl[a]+(r-a)*(sl[a+1]-sl[a]) }
  ties<-any(ty>1); pe<-NULL
  list(S=S,var_S=v,Z=z,p_two_sided=2*pnorm(-abs(z)),slope=median(sl),slope_lo=ip(M1),slope_hi=ip(M2),pairs=N,
    p_exact=if(!ties&&n<=50&&all(tt==1)) suppressWarnings(cor.test(seq_len(n),x,method="kendall",exact=TRUE)$p.value) else NULL) }
rate2<-function(x1,t1,x2,t2,level=.95){ r<-poisson.test(c(x1,x2),c(t1,t2),conf.level=level); n<-x1+x2;p0<-t1/(t1+t2)
  lo<-pbinom(x1,n,p0);hi<-pbinom(x1-1,n,p0,lower=FALSE); mid<-min(1,2*min(lo-dbinom(x1,n,p0)/2,hi-dbinom(x1,n,p0)/2))
  list(ratio=(x1/t1)/(x2/t2),lo=r$conf.int[1],hi=r$conf.int[2],p_minlike=r$p.value,p_double_tail=min(1,2*min(lo,hi)),p_mid=mid) }
